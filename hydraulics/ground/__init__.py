"""What does the ground do: how warm is it, how does it conduct, how does heat reach a pipe?"""
