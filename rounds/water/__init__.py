"""What salt water does: density and salinity, oxygen, ammonia, the carbonate system, sulphide."""
