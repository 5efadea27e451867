"""Pictures as plain data, and how they become a chart on a page or a drawing on paper."""
