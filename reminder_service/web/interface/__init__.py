"""The interface for other programs: REST under ``/api/v1``, described in OpenAPI 3.1."""
