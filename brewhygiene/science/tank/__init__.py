"""What happens in a tank and a line: flow, rinse, gas, heat."""
