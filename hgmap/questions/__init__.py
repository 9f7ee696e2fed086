"""The five questions of a survey and what is still open in each."""
