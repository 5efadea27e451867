"""Cleaning solutions: strength, making up, topping up, titration, conductivity."""
