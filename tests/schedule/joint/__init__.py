"""Tests of joint sessions."""
