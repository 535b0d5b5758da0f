"""Tests of activities and equipment."""
