"""How does the flow divide over the loops, what does each drop, what must the pump do?"""
