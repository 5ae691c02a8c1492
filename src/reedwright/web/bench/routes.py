"""The bench: conversion plans, measured reeds, the live reed meter.

Public: `router`.
"""

from __future__ import annotations

from fastapi import APIRouter

from reedwright.web.bench import harproutes, line, listenroutes, planroutes, tuningroutes

router = APIRouter(tags=["bench"])
for part in (planroutes, tuningroutes, listenroutes, line, harproutes):
    router.include_router(part.router)
