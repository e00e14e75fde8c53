"""Reading photographed and scanned sheets: arrays in, readings out."""
