"""A call as events: append, fold into state, store, report."""
