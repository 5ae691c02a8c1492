"""harp"""
