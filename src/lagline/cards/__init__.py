"""What is drawn and printed: drawings, bench card, templates, DXF out."""
