"""Typed answers to what people see. Pure: text and bytes out."""
