"""What ground is there to lay the array in?"""
