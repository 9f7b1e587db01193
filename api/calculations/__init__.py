"""What does each calculation answer to a job, whoever asks it?"""
