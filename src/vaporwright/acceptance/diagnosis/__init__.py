"""Why a unit falls short: causes as changes of the model, ranked by how likely they make the readings."""
