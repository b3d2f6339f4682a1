"""Finding things by words: what complaint somebody means, and entries of any list by what is typed."""
