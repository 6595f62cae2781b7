"""Builders of the demo show's assets. Run ``assets/build_glasshouse.py``; nothing here is imported
by the product."""
