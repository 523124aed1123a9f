"""What is written in photos: text, barcodes, and whether the picture is good enough to prove anything."""
