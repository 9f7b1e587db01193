"""What does a pipe, a fitting, a heat exchanger take of pressure at a flow?"""
