"""The negative on the glass: strips and views, a density under the finger, the user's word on marks."""
