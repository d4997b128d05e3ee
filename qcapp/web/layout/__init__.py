"""What every page shares: the base template, navigation, marks, filters of templates."""
