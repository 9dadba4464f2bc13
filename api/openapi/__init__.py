"""The description of the API as OpenAPI 3.1, made from the views, columns and filters themselves."""
