"""Pictures of the trees: the graph that is walked, and what a reading shows in each state. Text in, text out."""
