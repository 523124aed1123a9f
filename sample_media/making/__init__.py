"""How the sample media are made: scenario, speech, sound, pictures. Not part of the tool itself."""
