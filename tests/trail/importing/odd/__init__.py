"""Odd cells and files, each with what becomes of it: right, asked about, noted, or refused."""
