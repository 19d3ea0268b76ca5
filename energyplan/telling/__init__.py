"""One module per topic: a result becomes words, rows and findings here, and nowhere else."""
