"""Shot sheets: what a camera operator carries to the camera, as pages to print."""
