"""Assessment: rules, spread, the three-way decision, what to measure again."""
