"""What is done with places, trees and looks, each in one transaction with its audit line."""
