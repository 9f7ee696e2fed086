"""What the pointer does on the plan, one tool for each job."""
