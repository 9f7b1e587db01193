"""What can be done for every loop to have its flow, and what does it cost?"""
