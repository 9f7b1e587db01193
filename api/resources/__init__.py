"""The addresses of the service, a module for each subject."""
