"""Condition: findings, allowances, acceptance checks."""
