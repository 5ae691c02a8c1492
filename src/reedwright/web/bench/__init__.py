"""The bench: conversion plans, measured reeds, the live reed meter."""
