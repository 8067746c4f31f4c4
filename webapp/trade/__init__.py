"""What a repairer knows, read from content/ once, checked, and handed on as typed objects."""
