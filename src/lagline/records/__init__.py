"""The nouns: frozen records that every other layer passes along. Imports nothing but the standard library."""
