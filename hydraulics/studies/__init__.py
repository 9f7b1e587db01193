"""Which cases does a study have, which of them are best, and what do they depend on?"""
