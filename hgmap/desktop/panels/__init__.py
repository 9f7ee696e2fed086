"""One panel a question: its tools and its table."""
