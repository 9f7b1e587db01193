"""How much heat do trenches and pond mats give, and how long must they be?"""
