"""Drawing lists to pictures: screen tiles, PDF, PNG."""
