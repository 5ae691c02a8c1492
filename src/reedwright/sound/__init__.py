"""sound"""
