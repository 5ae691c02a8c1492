"""The bench: conversion plans, measured reeds, the live reed meter.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(tags=["bench"])
