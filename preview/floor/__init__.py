"""The floor map: where on the studio floor a framing of a camera would be all right."""
