"""How much heat do boreholes give, one and many, and how long must they be?"""
