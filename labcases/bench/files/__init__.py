"""What logical work found: lists of files, their states from coverage, samples, what the customer takes."""
