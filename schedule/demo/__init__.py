"""The invented county's past: what stands behind the demo's first week, so that each page has something to show."""
