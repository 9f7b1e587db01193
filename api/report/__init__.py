"""Writes the job's chapters as a document: page and PDF."""
