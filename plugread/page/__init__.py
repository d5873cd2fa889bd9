"""The bench page: everything Streamlit."""
