"""The live page: figures, layout, push and server, drawn from values that `station` makes."""
