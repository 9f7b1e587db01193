"""Which pump drives this array, cold and warm, at what power?"""
