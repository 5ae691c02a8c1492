"""player"""
