"""What happens around every call: key, rate, turn, limit, cache, delivery, problems, log."""
