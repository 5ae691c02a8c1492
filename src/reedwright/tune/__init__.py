"""tune"""
