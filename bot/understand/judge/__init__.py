"""What a message means in the end: weighed, held against the batch, asked about or left alone."""
