"""What is kept between visits."""
