"""The screens. They know everything else; nothing else knows them."""
