"""What a barcode says: GS1 element strings, product numbers and their dates."""
