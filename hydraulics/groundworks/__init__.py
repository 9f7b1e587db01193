"""What has to be dug, drilled, bedded, carted off and ordered?"""
