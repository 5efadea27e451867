"""How well one sign tells another: tables of two by two, ROC curves, cut-offs by cost."""
