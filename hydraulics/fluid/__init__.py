"""What flows: which antifreezes are there, and what does a mixture do at a temperature?"""
