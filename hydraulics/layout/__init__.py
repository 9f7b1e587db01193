"""What is buried, how is it joined, and in which order does it stand?"""
