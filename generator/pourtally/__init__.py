"""Pourtally: workbooks for decorative flatwork, with live formulas and true values."""
