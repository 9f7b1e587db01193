"""How is a study kept, run and read: its cases made from their number, their rows in the store?"""
