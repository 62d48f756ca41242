"""What is wrong or doubtful in a draft."""
