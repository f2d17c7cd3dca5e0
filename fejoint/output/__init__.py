"""What an answer becomes: files, fields, pictures, reports."""
