"""The Streamlit app: pages that read inputs, call the library and show."""
