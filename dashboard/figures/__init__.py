"""Pictures: pure functions from data to plotly figures or SVG."""
