"""What is worth changing: powers, savings, ranges."""
