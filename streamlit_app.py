"""The door to the app: ``streamlit run streamlit_app.py``."""

from energyplan.app.main import run

run()
