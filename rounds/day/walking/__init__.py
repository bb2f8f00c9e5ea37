"""What is due, and a walk through it: questions, answers, likely slips."""
